"""Every machine and period of an archive, each with the review that `Archive.review` gives.

    from eventlens.fleet.pool import Pool
    from eventlens.fleet.run import review_all

    if __name__ == "__main__":  # processes are spawned: they load this file again
        with closing(Pool(workers=8)) as pool:
            found = review_all("history", pool)

The way: `tasks` (what there is to do), `executor` (what runs it: the `pool` of processes here, or a Dask `cluster`),
`work` (a task on a worker: it reads the archive itself and gives back rows), `keep` (rows into the archive, several
machines in one commit), `run` ties them, `summary` and `result` are what comes out. There is no second way to review
here: `work` calls what `archive weeks` calls, and the rows stand where `archive weeks` puts them.

Workers do not write. Many small commits to one table stand in each other's way (each is a race that only one of them
wins), while the rows of a review are small: so the one program that plans also writes, every few seconds. What it had
not written when it was killed is reviewed again; nothing else is.

This module loads nothing: a process must know how many threads it may use before Polars is loaded (`process`).
"""
