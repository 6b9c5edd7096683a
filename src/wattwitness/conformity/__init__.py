"""Claims and decision rules on estimates: trueness, consistency and freedom from faults, judged apart."""
