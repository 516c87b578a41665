"""Control charts: whether what comes in and goes out stays as it was."""
