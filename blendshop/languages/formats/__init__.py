"""Marks Django writes bare numbers and dates with, a package a language; read by its name."""
