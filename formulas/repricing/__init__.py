"""All saved recipes at today's costs: read as arrays, one sparse matrix product, one statement."""
