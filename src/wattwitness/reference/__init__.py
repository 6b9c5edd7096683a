"""The reference on trial: hanging weights, three meters on one ride, the uncertainty budget, the setup record."""
