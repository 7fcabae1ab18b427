"""Synthetic spinal radiographs of children with known truth:  python ring_films.py OUT --children 12 --seed 3

Per film NAME = child-stage-view: the image, NAME.own.csv (landmark table, film pixels) and NAME.json.
"""
import argparse
import os
import time

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):      # small systems only: threads cost more than they give
    os.environ.setdefault(_name, "1")

from ringfilms.child import Child
from ringfilms.film import make_film
from ringfilms.pose import STAGES
from ringfilms.skeleton import VIEWS


def main():
    """Renders the films asked for, child by child."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("out", metavar="OUT", help="folder for the films")
    parser.add_argument("--children", type=int, default=12, help="how many children (default 12)")
    parser.add_argument("--seed", type=int, default=1, help="decides, with a child's number, all its films (default 1)")
    parser.add_argument("--first", type=int, default=1, help="number of the first child (default 1)")
    given = parser.parse_args()
    os.makedirs(given.out, exist_ok=True)
    for number in range(given.first, given.first + given.children):
        child = Child(given.seed, number)
        for stage in STAGES:
            for view in VIEWS:
                start = time.time()
                facts = make_film(child, stage, view, given.out)
                print(f"{facts['file']} {facts['columns']}x{facts['rows']} {time.time() - start:.1f} s", flush=True)


if __name__ == "__main__":
    main()
