// A real mail server for the tests: npm's smtp-server, whose mails are read by npm's mailparser. Says on
// a line each at which port it listens, and what arrived. Whom it refuses stands in the address.

import { simpleParser } from "mailparser";
import { SMTPServer } from "smtp-server";

const { LEVERBOOK_MAIL_PORT: port = "0", LEVERBOOK_MAIL_LOGIN: login, LEVERBOOK_MAIL_TLS: tls } = process.env;
const say = (what) => console.log(JSON.stringify(what));
const refuse = (code, why) => Object.assign(new Error(why), { responseCode: code });

const server = new SMTPServer({
  authOptional: !login,
  allowInsecureAuth: true,
  disabledCommands: tls ? [] : ["STARTTLS"],
  disableReverseLookup: true,
  onAuth({ username, password }, _, done) {
    if (`${username}:${password}` === login) done(null, { user: username });
    else done(refuse(535, "no such login"));
  },
  onRcptTo({ address }, _, done) {
    if (address.startsWith("gone@")) done(refuse(550, "no such mailbox"));
    else if (address.startsWith("busy@")) done(refuse(451, "try again later"));
    else done();
  },
  onData(stream, { envelope, user }, done) {
    simpleParser(stream).then((mail) => {
      const headers = Object.fromEntries(mail.headerLines.map(({ key, line }) => [key, line.replace(/\r?\n\s+/g, " ").replace(/^[^:]+:\s*/, "")]));
      say({
        from: envelope.mailFrom.address,
        to: envelope.rcptTo.map(({ address }) => address),
        user,
        headers,
        names: { from: mail.from.value[0].name, to: mail.to.value[0].name },
        subject: mail.subject,
        date: mail.date.toISOString(),
        id: mail.messageId,
        text: mail.text,
      });
      done();
    }, done);
  },
});
server.on("error", (error) => {
  // A caller that trusts no certificate of ours hangs up.
  if (!tls) throw error;
});
server.listen(Number(port), "127.0.0.1", () => say({ port: server.server.address().port }));
