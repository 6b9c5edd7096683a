"""The tests, by kind; see CONTRIBUTING.md for which belongs where."""
