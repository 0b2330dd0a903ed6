"""Every language the program speaks: one file each in ``data``, and how a text finds its words."""
