"""One module of views per room, and those of coming in and the owner's desk."""
