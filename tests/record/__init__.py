"""Taking down a case on the phone: the checks in the browser against Python's, the file that comes out, its photos."""
