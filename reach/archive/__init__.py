"""A collection: the sound rows of many exports in one folder, which grows and is never read anew."""
