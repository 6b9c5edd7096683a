"""Draw what sections and charts hold: terminal, JSON, HTML, figures."""
