"""The statistical tools by themselves."""
