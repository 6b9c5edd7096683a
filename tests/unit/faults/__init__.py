"""Tests of how episodes are found."""
