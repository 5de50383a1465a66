#!/usr/bin/env python3
"""A learning record store for tests: takes statements as the Experience API 1.0.3 has it and writes them to a file.

usage: record_receiver.py PORT_FILE STATEMENTS_FILE MODE
MODE is a list of words with commas, each for one request in turn, then "good" for all others:
  good    take the statements
  busy    answer 503 and take nothing
  lost    take the statements and close the connection without an answer
  refuse  answer 400 when a statement is about the scenario "bad", otherwise as good
  locked  answer 401
"""
import base64
import json
import os
import sys
from http.server import BaseHTTPRequestHandler, HTTPServer

port_file, statements_file, mode = sys.argv[1:4]
modes = mode.split(",")
kept = {}


class Receiver(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def log_message(self, *args):
        pass

    def answer(self, status, body):
        text = json.dumps(body).encode()
        self.send_response(status)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(text)))
        self.end_headers()
        self.wfile.write(text)

    def do_POST(self):
        body = self.rfile.read(int(self.headers["Content-Length"]))
        now = modes.pop(0) if len(modes) > 1 or modes[0] not in ("good", "refuse", "locked") else modes[0]
        if self.path != "/xapi/statements":
            return self.answer(404, "no such resource")
        if self.headers.get("X-Experience-API-Version") != "1.0.3":
            return self.answer(400, "X-Experience-API-Version")
        if now == "busy":
            return self.answer(503, "later")
        wanted = "Basic " + base64.b64encode(b"school:secret word").decode()
        if now == "locked" or self.headers.get("Authorization") not in (None, wanted):
            return self.answer(401, "who is there")
        statements = json.loads(body)
        if now == "refuse" and any("/bad" in one["object"]["id"] for one in statements):
            return self.answer(400, "a bad object")
        if any(one["id"] in kept and kept[one["id"]] != one for one in statements):
            return self.answer(409, "another statement of this id")
        for one in statements:
            if one["id"] not in kept:
                kept[one["id"]] = one
                with open(statements_file, "a") as out:
                    out.write(json.dumps(one) + "\n")
        if now == "lost":
            self.close_connection = True
            self.connection.close()
            return None
        return self.answer(200, [one["id"] for one in statements])


server = HTTPServer(("127.0.0.1", 0), Receiver)
with open(port_file + ".new", "w") as out:
    out.write(str(server.server_port))
os.rename(port_file + ".new", port_file)
server.serve_forever()
