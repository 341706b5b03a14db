"""Selection: which pieces of the stock each build takes, exactly.

`allocation.py` is the question and the answer, `stock.py` and `holdings.py` what there is; all lie beside this room.
`allocate.allocate` is its only door. The way through, in the order in which a question walks it:

1. `allocate` states the aims and asks a `Question`, which holds what is left as builds are settled: first the
   builds whose own pieces suffice, then as many of the others as can be whole, then what the rest still get.
2. `patterns` lists every set of pieces that meets a need, prices it under each aim, and joins equal needs.
3. `choose` takes patterns for spans and pieces: by plain search where that is quick, else by the solver. `program` is
   the only module that knows the solver, and checks its answers in whole numbers.
4. `nesting` saws the cuts from whole timbers: small lists by plain search over bars; `bars` says what may serve which
   section, and makes good ways to saw where there are too many to write down.
5. `shortage` decides which builds to make whole when the stock does not suffice for all, gives the others what there
   is and names what they lack.
6. `answer` puts each build's `Allocation` together.
"""
