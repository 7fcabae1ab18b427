"""The levels and their average sizes in an adult-sized spine (mm), by level from S1 upward."""
import numpy as np

LEVELS = ["S1", "L5", "L4", "L3", "L2", "L1"] + [f"T{k}" for k in range(12, 0, -1)] + [f"C{k}" for k in range(7, 1, -1)]
INDEX = {name: level for level, name in enumerate(LEVELS)}
COUNT = len(LEVELS)
L4, L3, T12, T8, T6, T2, T1 = (INDEX[name] for name in ("L4", "L3", "T12", "T8", "T6", "T2", "T1"))
C7, C5, C4, C2 = (INDEX[name] for name in ("C7", "C5", "C4", "C2"))
SIDES = (-1, 1)

# Vertebral bodies: width (X), depth (Y), height (Z), and the disc above each.
WIDTH = np.array([50, 49.5, 47.5, 45.5, 43.5, 42, 40, 36.5, 33.5, 31.5, 29.5, 28.5,
                  27.5, 27, 26.5, 27, 28, 29.5, 26, 24, 22, 21, 20, 19])
DEPTH = np.array([33, 34.5, 34, 33.5, 32.5, 31.5, 30.5, 29.5, 28.5, 27.5, 26.5, 25.5,
                  24, 22.5, 21, 19.5, 18.5, 17.5, 16.5, 16, 15.5, 15.5, 15, 15])
HEIGHT = np.array([29, 27, 27.5, 27.5, 27, 26, 24.5, 23, 21.8, 21, 20.5, 20,
                   19.5, 19, 18.5, 18, 17.5, 16.5, 14, 13, 13, 13, 13.5, 19])
DISC = np.array([10, 10.5, 10.5, 9.5, 8.5, 7.5, 6.3, 5.5, 5.0, 4.7, 4.6, 4.5,
                 4.3, 4.2, 4.1, 4.0, 4.2, 4.6, 5.2, 5.2, 5.2, 5.0, 5.0, 0])
