"""Writing the tanks' ledger: looked, begun, finished, drained, rinsed."""
