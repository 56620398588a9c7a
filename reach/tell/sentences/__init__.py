"""What was found, in words: the one place where codes and numbers become sentences, one module a subject.

Each function takes what was found and `say`, the `base.words.Typography` of the medium: `PRINT` for pictures, page and
slides, `TERMINAL` for a terminal, CSV and JSON. Nothing is worked out here, and no sentence is rewritten afterwards.
"""
