"""Across rides and units: consistency, correction, before and after."""
