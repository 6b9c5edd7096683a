"""The evidence bundle: pages, figures and lists as files, and one archive of them all."""
