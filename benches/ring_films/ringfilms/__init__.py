"""Synthetic spinal radiographs: implicit bones sampled as points, splatted through a diverging beam.

World axes: X = patient's left, Y = anterior, Z = up; millimetres; origin in the middle of S1's upper plate.
A vertebra's own axes are the same when it stands straight, from the middle of its body.  Angles are degrees.
Levels are counted upward, S1 = 0.  A cloud is (points, weights): float32 (n, 3) in mm, and density times volume (mm3).
SIDES are the signs of X: -1 right, 1 left.

All anatomical sizes, attenuations and exposure values are round figures from memory.
The order of the random draws is part of the films: a seed and a child's number must always give the same films.
"""
