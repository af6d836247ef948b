"""The desk: pages in the browser that do what the commands do, from a server that only this machine reaches."""
