"""Receives deliveries at PORT (9000 if empty). SECRET is the secret of the webhook; without it nothing is believed."""

import base64, hashlib, hmac, json, os, sys, time
from http.server import BaseHTTPRequestHandler, HTTPServer

SECRET = base64.b64decode(os.environ.get("SECRET", "").removeprefix("whsec_"), validate=True)
if len(SECRET) < 24:
    sys.exit("SECRET is no secret of a webhook")


def genuine(headers, body):
    stamp = headers["webhook-timestamp"] or ""
    if not stamp.isdecimal() or abs(time.time() - int(stamp)) > 300:
        return False
    signed = f"{headers['webhook-id']}.{stamp}.".encode() + body
    made = "v1," + base64.b64encode(hmac.new(SECRET, signed, hashlib.sha256).digest()).decode()
    return any(hmac.compare_digest(made, s) for s in (headers["webhook-signature"] or "").split())


class Receiver(BaseHTTPRequestHandler):
    def do_POST(self):
        body = self.rfile.read(int(self.headers["Content-Length"]))
        good = genuine(self.headers, body)
        if good:  # the same webhook-id may come again: remember those that you have done
            event = json.loads(body)
            print(event["type"], event["subject"], flush=True)
        self.send_response(204 if good else 401)
        self.end_headers()


HTTPServer(("127.0.0.1", int(os.environ.get("PORT", "9000"))), Receiver).serve_forever()
