"""The verbs: what one can ask of a job folder, for the command line, for pages and for scripts alike.

May live here: functions that load a job, run the parts below in turn and keep their results in ``out/``.
May not: parsing of command lines, printing, anything computed that a part below could compute.
"""
