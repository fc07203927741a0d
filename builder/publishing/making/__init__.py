"""Pages as tasks, composed and written: a build, a preview, a publication."""
