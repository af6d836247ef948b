"""Code that runs inside the room, next to notebooks from unknown hands.

It imports the standard library, numpy, pint, matplotlib, IPython and ipykernel; never pitside, exercises or the rest of
grader. :mod:`grader.running.runner` starts it by the path of this folder, in a Python that has no site-packages until
the walls stand. Nothing outside imports it but ``claim``, which :mod:`grader.running.reading` takes along.

``kernel``   the Linux calls that Python has no name for
``room``     the walls around the fork server: one small world of files, no network, no other process
``cell``     the walls around one script, put up in its own process just before its first cell
``server``   the fork server: one forked process for each script
``script``   one notebook's cells, run with IPython's semantics, and the ``answer`` they call
``claim``    what one call of ``answer`` hands in and prints, for plain values
``plots``    pictures of figures, drawn once
``jupyter_kernel``  the same as a Jupyter kernel, for systems that have neither such walls nor such forks
"""
