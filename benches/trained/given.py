"""What both trainings are given."""
import argparse
import numpy as np


def given(load, *more):
    """The words of the command, the films of each folder of --films with the folders' shares, and of each of --apart."""
    parser = argparse.ArgumentParser()
    parser.add_argument("view", choices=["pa", "lateral"])
    parser.add_argument("minutes", type=float)
    parser.add_argument("weights")
    parser.add_argument("--films", nargs="+", required=True)
    parser.add_argument("--apart", nargs="*", default=[])
    parser.add_argument("--start")
    parser.add_argument("--keep")
    for name, kind in more:
        parser.add_argument(name, type=kind)
    words = parser.parse_args()
    lateral = words.view == "lateral"
    folders = [f.split("=") for f in words.films]
    shares = np.array([float(share) for _, share in folders])
    sets = [load(folder, lateral) for folder, _ in folders]
    return words, lateral, sets, shares / shares.sum(), {folder: load(folder, lateral) for folder in words.apart}
