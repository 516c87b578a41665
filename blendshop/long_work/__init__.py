"""Work too long for a page: begun by somebody, shared by the workers part by part, shown in progress."""
