"""The invented fleet: rigs and machines as data sheets, and the envelope of what a rig would see.

``rigs``, ``machines``: sheets, from which exercises draw, so that what one prints of a machine agrees with the others.
``envelope``: ranges that quantities are held in, whichever machine or rig they belong to.

Every figure carries its unit and its status. "Common practice, no source" is what people of the trade go by; it stands
in no publication that we know, and a published figure takes its place as soon as one is found.
"""
