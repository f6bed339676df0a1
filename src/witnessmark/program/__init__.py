"""RS-274 text: writing programs, reading them back, and the minutes they take.

May live here: the number format, the writer, the interpreter, the time model, the fingerprint.
The reader shares nothing with the writer but the number format, so that a slip in one shows in the other.
"""
