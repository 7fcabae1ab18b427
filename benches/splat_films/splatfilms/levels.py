"""The levels and their average sizes in an adult-sized spine (mm, degrees), by level from S1 upward."""
import numpy as np
from scipy.interpolate import PchipInterpolator

LEVELS = ["S1", "L5", "L4", "L3", "L2", "L1"] + [f"T{k}" for k in range(12, 0, -1)] + ["C7", "C6", "C5", "C4", "C3"]
INDEX = {name: k for k, name in enumerate(LEVELS)}
C7 = INDEX["C7"]
MARKED = LEVELS[:C7 + 1]        # the levels whose plates are in the truth
SIDES = (-1, 1)                 # left, right: the sign of X


def by_level(**known):
    """Values of every level, between the known ones by a curve that never overshoots."""
    index = np.array([INDEX[name] for name in known])
    value = np.array(list(known.values()), float)
    order = np.argsort(index)
    return PchipInterpolator(index[order], value[order])(np.arange(len(LEVELS)))


# Vertebral bodies: width (X), depth (Y), height (Z), and the disc above each.
WIDTH = by_level(S1=49, L5=47, L3=42, L1=38.5, T12=36, T10=31, T8=28, T6=26, T4=24.5, T2=27, T1=29, C7=27, C5=23, C3=21)
DEPTH = by_level(S1=32, L5=33, L3=32.5, L1=30, T12=29, T10=29, T8=27.5, T6=25, T4=21.5, T2=18, T1=16.5, C7=16, C5=15,
                 C3=14)
HEIGHT = by_level(S1=28, L5=26.5, L3=27, L1=25, T12=23.5, T10=21.5, T8=20, T6=18.7, T4=17.6, T2=16.5, T1=15.5, C7=13.5,
                  C5=12, C3=12.5)
DISC = by_level(S1=9.5, L5=9.5, L3=9, L1=7, T12=6, T10=4.9, T8=4.4, T6=4.2, T4=4.0, T2=4.2, T1=4.6, C7=5, C5=5, C3=5)

# The arch: width of the canal and of a pedicle, reach of the transverse processes from the midline,
# length of the spinous process and how far it points down.
CANAL = by_level(S1=28, L5=25, L3=22, L1=21, T12=20, T8=16, T4=16, T2=18, T1=20, C7=23, C3=22)
PEDICLE = by_level(S1=16, L5=14, L3=9.5, L1=7.5, T12=7.5, T10=6.8, T8=5.6, T6=4.8, T4=4.6, T2=6.2, T1=7.5, C7=6, C3=5)
TRANSVERSE = by_level(L5=46, L4=43, L3=47, L2=43, L1=37, T12=23, T11=25, T10=28, T8=30, T4=31, T2=33, T1=36, C7=32,
                      C5=27, C3=25)
SPINOUS = by_level(L5=20, L3=29, L1=27, T12=24, T9=32, T6=38, T3=34, T1=33, C7=34, C5=18, C3=16)
SPINOUS_DROP = np.deg2rad(by_level(L5=12, L3=10, L1=14, T12=18, T11=28, T9=48, T7=58, T5=55, T3=45, T1=25, C7=20,
                                   C5=20, C3=20))
