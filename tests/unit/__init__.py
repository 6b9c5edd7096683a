"""Single functions on small inputs."""
