"""What the networks say of made-up plates and films with the weights given: the numbers that stand in the tests of
src/locate/trained.rs and src/locate/overview.rs.

python expected.py WEIGHTS-FOLDER
"""
import os
import sys
import numpy as np
import torch
from given import read
from network import Network
from overview import Overview, shown_to


def rows(values):
    return "".join("[" + ", ".join(f"{x:.4f}" for x in row) + "],\n" for row in values)


def main():
    folder = sys.argv[1]
    waves = lambda by, shape: torch.stack([
        torch.sin(torch.tensor(np.float32(by) * np.arange(np.prod(shape)) + i, dtype=torch.float32)).reshape(shape)
        for i in range(3)])
    told = torch.tensor([[(k - 3) / 5 for k in range(7)]] * 3)
    y, x = np.mgrid[0:77, 0:51].astype(np.float32)
    film = np.sin(0.37 * x + 0.011 * x * y) * 3 + np.cos(0.23 * y) * 2 + 0.05 * x
    film = torch.tensor(film, dtype=torch.float32)[None, None]
    for view in ("frontal", "lateral"):
        network = read(Network(), os.path.join(folder, f"{view}.f16"))
        with torch.no_grad():
            said = network(waves(0.37, (2, 96, 64)), waves(0.11, (1, 64, 48)), told, [3])
        print(f"{view}:\n{rows(said)}")
    for view in ("frontal", "lateral"):
        network = read(Overview(), os.path.join(folder, f"overview_{view}.f16"))
        with torch.no_grad():
            said = network(shown_to(film))[0]
        print(f"overview, {view}:\n{rows(said[:, y, x].tolist() for y, x in ((9, 7), (30, 20)))}")


if __name__ == "__main__":
    main()
