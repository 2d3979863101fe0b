// A person's phone that speaks MQTT 5 over TLS through the npm package `mqtt`: JSON lines on
// standard input are published with a response topic and correlation data, whatever it hears is a
// line on standard output.
//   in:  {"topic": "...", "payload": "...", "correlation": "..."}
//   out: {"topic": "...", "payload": "...", "retain": false,
//         "properties": {"message-expiry-interval": 60, "correlation-data": "..."}}
// It prints {"subscribed": [...]} once it listens and {"acknowledged": 1} for each publication.

import { connect } from "mqtt";
import { readFileSync } from "node:fs";
import { createInterface } from "node:readline";

const [, , port, authority, username, password, responseTopic, ...topics] = process.argv;
const client = connect({
  protocol: "mqtts",
  host: "localhost",
  port: Number(port),
  ca: readFileSync(authority),
  protocolVersion: 5,
  clientId: `phone-${process.pid}`,
  username,
  password,
});
const print = (what) => process.stdout.write(`${JSON.stringify(what)}\n`);
client.on("error", (error) => process.stderr.write(`${error.message}\n`));
client.on("message", (topic, payload, { retain, properties }) =>
  print({
    topic,
    payload: payload.toString(),
    retain,
    properties: {
      "message-expiry-interval": properties?.messageExpiryInterval,
      "correlation-data": properties?.correlationData?.toString(),
    },
  }),
);

const granted = await client.subscribeAsync([responseTopic, ...topics], { qos: 1 });
print({ subscribed: granted.map(({ topic, qos }) => ({ topic, qos })) });

let acknowledged = 0;
for await (const line of createInterface({ input: process.stdin })) {
  const { topic, payload, correlation } = JSON.parse(line);
  const properties = { responseTopic, correlationData: Buffer.from(correlation) };
  await client.publishAsync(topic, payload, { qos: 1, properties });
  acknowledged += 1;
  print({ acknowledged });
}
client.end();
