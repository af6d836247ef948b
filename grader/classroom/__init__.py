"""The classroom: papers handed out and taken in over a local network, by a server with the candidates' side alone."""
