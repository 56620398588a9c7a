"""No number changes unnoticed: what every stage answers to small made-up studies is kept in `answers`, a file a study.

    python -m tests.kept

writes the answers anew. They are not truth: that is the published values and the reference libraries that the other tests hold the program
against, and the laws. These files say no more than that a number is what it was. Where one has become another, the test names it, a look
at the difference of the files shows what else has, and the changelog says why.
"""
