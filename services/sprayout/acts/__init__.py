"""What a person does at the bench, one module a subject: measure, match, spray, watch.

An act returns once it is on record.  It raises BadInput (nothing changed), LinkError (no board) or
StoreError (not kept); it owns no task and no clock: those are the station's, handed in as a Bench.
"""
