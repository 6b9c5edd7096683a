"""What a source checkout needs to set itself up, build its page and its pages of documentation, and check itself."""
