"""An invented plant with invented customers in an invented county, to try everything on.

Nothing here is a real name, price or address; the figures of the base stocks are the shipped
reference tables with their sources. ``load_demo`` is safe to repeat and refuses to run outside
debug, since its passwords are public.
"""
