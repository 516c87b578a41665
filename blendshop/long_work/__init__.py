"""Work too long for a page: a row with its parts, shared by the workers, shown in progress."""
