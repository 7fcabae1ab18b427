"""Synthetic spinal radiographs: solids as clouds of weighted points, splatted onto a film.

World axes: X = patient's right, Y = anterior, Z = up; millimetres; origin in the middle of the S1 body.
A vertebra's own axes are the same when it stands straight, from the middle of its body.  Angles inside the
package are radians, angles in the files are degrees.  Levels are counted upward, S1 = 0.
A cloud is (points, weights): float32 (n, 3) in mm, and float32 attenuation times volume (1/mm * mm3 = mm2).

All anatomical sizes, attenuations and exposure values are round figures from memory.
The order of the random draws is part of the films: a child's number must always give the same films.
"""
