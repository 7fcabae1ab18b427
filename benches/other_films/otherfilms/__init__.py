"""Synthetic long spinal films with known truth.

World axes: X toward the patient's right, Y anterior, Z up; millimetres; origin at the middle of S1's
upper end-plate.  Vertebra axes: u right, v anterior, w up.  Angles are degrees at every interface.
All anatomical sizes are round figures from memory (standard trade knowledge), not from a source.
"""
