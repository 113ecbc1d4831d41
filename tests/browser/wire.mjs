// What goes over the wire, counted where it passes: a server that hands every request on as it came, and the
// answer back as it came, whoever asked: a page, its worker, or what runs in the background.
//
// Built for testing, the server reads files from the disk, compresses them in passing and lets no browser keep
// them; as shipped, they come without comments, compressed as far as it goes, and are kept for good
// under their address. They are counted as shipped: with all of Brotli's effort, and once.

import { readFileSync } from "node:fs";
import http from "node:http";
import { brotliCompressSync } from "node:zlib";

/** What the body of a file under `/static/{release}/` is on the wire as shipped, from a folder of what ships. */
function shipped(folder, path) {
  const content = readFileSync(`${folder}/${path.split("/").slice(3).join("/")}`);
  return Math.min(content.length, brotliCompressSync(content).length);
}

/** Stands in front of a server. `answers` are those since the last `forget()`: path, status, bytes. */
export async function openWire(server, folder) {
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
          counted.bytes += isFile && given.statusCode === 200 ? shipped(folder, asked.url) : Buffer.concat(body).length;
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
