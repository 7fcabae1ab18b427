"""Synthetic spinal radiographs by splatting, with known truth:  python splat_films.py OUT --first 1 --last 12

Per film NAME = child-stage-view: the image, NAME.own.csv (landmark table, film pixels) and NAME.json.
"""
import argparse
import os
import time

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):      # small systems only: threads cost more than they give
    os.environ.setdefault(_name, "1")

from splatfilms.child import Child
from splatfilms.film import VIEWS, make_film
from splatfilms.pose import STAGES


def main():
    """Renders the films asked for, child by child."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("out", metavar="OUT", help="folder for the films")
    parser.add_argument("--first", type=int, default=1, help="number of the first child (default 1)")
    parser.add_argument("--last", type=int, default=12, help="number of the last child (default 12)")
    parser.add_argument("--stage", choices=STAGES, help="this stage only")
    parser.add_argument("--view", choices=VIEWS, help="this view only")
    given = parser.parse_args()
    os.makedirs(given.out, exist_ok=True)
    for number in range(given.first, given.last + 1):
        start = time.time()
        child = Child(number)
        print(f"{child.name} invented, {time.time() - start:.1f} s", flush=True)
        for stage in [given.stage] if given.stage else STAGES:
            for view in [given.view] if given.view else VIEWS:
                start = time.time()
                facts = make_film(child, stage, view, given.out)
                print(f"{facts['file']} {facts['columns']}x{facts['rows']} {time.time() - start:.1f} s", flush=True)


if __name__ == "__main__":
    main()
