"""How figures are written for a person: one place for pages, papers, mails and messages.

``locales`` holds marks and month names, ``units`` the two systems of units, ``writing`` the class
``Figures`` that joins them, ``readers`` whose figures are meant. All but ``readers`` are free of
Django, so pure code may call them too. Input fields, CSV and JSON are not figures for a person.
"""
