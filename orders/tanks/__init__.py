"""What is in each tank."""
