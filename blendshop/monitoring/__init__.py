"""What those who run the plant's server look at: is it alive, what does it do, what went wrong."""
