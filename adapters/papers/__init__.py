"""The papers of a room: for the client, the site, what was built, and the offer.

Each paper is an HTML page that prints on A4 or Letter, made of the same figures as `roomcue plan`;
its drawings are SVG as well. Only the room file and the plan go in, strings come out.
"""
