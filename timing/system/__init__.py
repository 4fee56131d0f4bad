"""What one operating system does otherwise than another: each such call stands here, once, beside its alternative."""
