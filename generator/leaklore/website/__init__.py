"""The only room that imports MkDocs: plugin, shell, writing into place."""
