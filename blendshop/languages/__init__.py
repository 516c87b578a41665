"""Whose language and units: what a person, a company or the house has chosen, and writing in it.

``offered`` names the languages, ``choice`` says whose choice holds and writes in it, ``middleware``
writes pages in the reader's. ``formats`` keeps Django's own marks those of es-US.
"""
