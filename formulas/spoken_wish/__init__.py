"""A wish said in one line, as on the phone, read by a small grammar that guesses nothing.

``reading.read_line`` turns a line into what was understood, what has to be asked back and which
words nobody can know. ``request_body`` makes the body of a formulation from it.
"""
