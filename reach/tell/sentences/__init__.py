"""Findings in words: each module says one subject's numbers and codes, once, in the typography of the medium it is asked for.

`say` is a `reach.base.words.Typography`: PRINT for pictures, page, slides and handout, TERMINAL for a terminal, CSV and JSON.
Nothing is computed here, and nothing outside rewrites what is said here.
"""
