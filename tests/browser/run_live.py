"""The dashboard of a store on a clock of its own: ``python -m tests.browser.run_live STORE US``.

Says its port on a line of its own once it listens; a third argument asks for a port.
"""

import sys
import time

from waitress.server import create_server

from dashboard import create_app

place, starts_us, *rest = sys.argv[1:]
ahead = time.time_ns() // 1000 - int(starts_us)
app = create_app(place, clock_us=lambda: time.time_ns() // 1000 - ahead)
server = create_server(app.server, host="127.0.0.1", port=int(rest[0]) if rest else 0, threads=8)
print(server.effective_port, flush=True)
server.run()
