"""Whole outputs compared with files kept beside the tests."""
