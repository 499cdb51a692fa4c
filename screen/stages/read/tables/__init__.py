"""Tables: a coded grid in, the tables found in it out, each with the reasons."""
