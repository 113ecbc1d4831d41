// What goes over the wire, counted where it passes: a server that hands every request on as it came, and the
// answer back as it came, whoever asked: a page, its worker, or what runs in the background.
//
// Built for testing, the server reads files from the disk, compresses them in passing and lets no browser keep
// them; as shipped, they are compressed as far as it goes beforehand, and kept for good under their
// address. They are counted as shipped: with all of Brotli's effort, and once.

import http from "node:http";
import { brotliCompressSync, brotliDecompressSync } from "node:zlib";

/** What a file's body is on the wire as shipped. */
const shipped = (body, encoding) =>
  encoding === "br" ? Math.min(body.length, brotliCompressSync(brotliDecompressSync(body)).length) : body.length;

/** Stands in front of a server. `answers` are those since the last `forget()`: path, status, bytes. */
export async function openWire(server) {
  const to = new URL(server);
  let answers = [];
  let underWay = 0;
  let last = Date.now();
  const wire = http.createServer((asked, answer) => {
    underWay += 1;
    const onward = http.request(
      { host: to.hostname, port: to.port, method: asked.method, path: asked.url, headers: asked.headers },
      (given) => {
        const head = given.rawHeaders.reduce((bytes, text) => bytes + text.length + 2, 0);
        const isFile = asked.url.startsWith("/static/");
        const counted = { path: asked.url, status: given.statusCode, bytes: head + 15 };
        if (!isFile || given.statusCode !== 304) answers.push(counted);
        const body = [];
        given.on("data", (piece) => body.push(piece));
        given.on("end", () => {
          const whole = Buffer.concat(body);
          counted.bytes += isFile ? shipped(whole, given.headers["content-encoding"]) : whole.length;
        });
        answer.writeHead(given.statusCode, given.rawHeaders);
        given.pipe(answer);
      },
    );
    onward.on("error", () => answer.destroy());
    answer.on("close", () => {
      underWay -= 1;
      last = Date.now();
    });
    asked.pipe(onward);
  });
  await new Promise((ready) => wire.listen(0, "127.0.0.1", ready));
  return {
    url: `http://127.0.0.1:${wire.address().port}`,
    forget: () => {
      answers = [];
    },
    answers: () => answers,
    /** Once nothing has passed for so long. */
    async quiet(milliseconds) {
      last = Date.now();
      while (underWay > 0 || Date.now() - last < milliseconds) {
        await new Promise((later) => setTimeout(later, 50));
      }
    },
    close: () => {
      wire.closeAllConnections();
      wire.close();
    },
  };
}
