"""The level of a station from day to day. METHOD.md beside this file has the method, its figures and its limits."""
