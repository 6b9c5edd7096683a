"""Rides with a known truth, for the demo, the planner and the tests.

Everything here is made of integer draws and of + - * / and square roots, which every machine rounds alike, so that a
seed gives the same samples everywhere (see ``draws`` and ``signals``).
"""
