"""The robot: parts that stay, poses, keep-outs, module types."""
