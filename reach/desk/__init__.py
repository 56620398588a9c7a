"""The desk: a page on this machine for people who never open a terminal.

A small server (`server`, `guard`, `screens`) shows the studies of a folder (`shelf`) in the user's own browser, and one process
beside it (`worker`, spoken to through `bench`) does what takes time and memory: it reads, checks, draws and writes with the
same functions as the command line. The server loads none of the heavy libraries. All state is the folder.
"""
