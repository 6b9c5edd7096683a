"""What can go wrong with a number, one detector a file, registered in ``registry``."""
