"""What the blend does on the lawn."""
