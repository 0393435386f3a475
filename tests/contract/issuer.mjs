// An authorization server with the JOSE library of another make: prints its address, serves until it is ended.
// GET /jwks, /redirected, /count; POST /sign (a token of any shape), /rotate, /clients (register), /token (SMART).
import { createServer } from 'node:http';
import * as jose from 'jose';

const KINDS = { es: ['ES384', {}], rs: ['RS384', { modulusLength: 2048 }], p256: ['ES256', {}] };
const keys = {};
const clients = {};
let published = [];
let generation = 0;
let readCount = 0;
let grantedScope = null;
let assertions = new Set();
let address = '';

async function rotate() {
  generation += 1;
  published = [];
  for (const [name, [alg, options]] of Object.entries(KINDS)) {
    const pair = await jose.generateKeyPair(alg, { extractable: true, ...options });
    const kid = `${name}-${generation}`;
    keys[kid] = { ...pair, alg };
    published.push({ ...(await jose.exportJWK(pair.publicKey)), kid, alg, use: 'sig' });
  }
}

const encoded = (value) => jose.base64url.encode(typeof value === 'string' ? value : JSON.stringify(value));

async function sign({ key, header, claims }) {
  const text = new TextEncoder().encode(typeof claims === 'string' ? claims : JSON.stringify(claims));
  if (header.alg === 'none') return `${encoded(header)}.${jose.base64url.encode(text)}.`;
  const held = header.alg.startsWith('HS')
    ? new TextEncoder().encode(await jose.exportSPKI(keys[key].publicKey))
    : keys[key].privateKey;
  const crit = Object.fromEntries((header.crit ?? []).map((name) => [name, true]));
  const signed = await new jose.FlattenedSign(text).setProtectedHeader(header).sign(held, { crit });
  return `${signed.protected}.${signed.payload}.${signed.signature}`;
}

async function grant(form) {
  const assertion = form.get('client_assertion');
  const clientId = jose.decodeJwt(assertion).sub;
  const { payload, protectedHeader } = await jose.jwtVerify(assertion, jose.createLocalJWKSet(clients[clientId]), {
    algorithms: ['ES384', 'RS384'], audience: `${address}/token`, issuer: clientId, subject: clientId, typ: 'JWT',
    requiredClaims: ['exp', 'iat', 'jti'], maxTokenAge: '5m',
  });
  if (assertions.has(payload.jti) || payload.exp - payload.iat > 300) throw new Error('assertion used or too long');
  assertions.add(payload.jti);
  if (form.get('grant_type') !== 'client_credentials') throw new Error('grant type');
  if (form.get('client_assertion_type') !== 'urn:ietf:params:oauth:client-assertion-type:jwt-bearer') throw new Error('type');
  const scope = grantedScope ?? form.get('scope');
  return { access_token: `granted-${protectedHeader.alg}-${assertions.size}`, token_type: 'bearer', expires_in: 300, scope };
}

const ROUTES = {
  'GET /jwks': async () => { readCount += 1; return { keys: published }; },
  'GET /count': async () => readCount,
  'POST /sign': async (body) => sign(JSON.parse(body)),
  'POST /rotate': async () => { await rotate(); return generation; },
  'POST /clients': async (body) => Object.assign(clients, JSON.parse(body)),
  'POST /scope': async (body) => { grantedScope = JSON.parse(body); return grantedScope; },
  'POST /token': async (body) => grant(new URLSearchParams(body)),
};

await rotate();
const server = createServer(async (request, response) => {
  const parts = [];
  for await (const part of request) parts.push(part);
  if (request.url === '/redirected') {
    response.writeHead(302, { Location: `${address}/jwks` }).end();
    return;
  }
  try {
    const answer = await ROUTES[`${request.method} ${request.url}`](Buffer.concat(parts).toString());
    response.writeHead(200, { 'Content-Type': 'application/json' }).end(JSON.stringify(answer));
  } catch (error) {
    response.writeHead(400, { 'Content-Type': 'application/json' }).end(JSON.stringify({ error: String(error) }));
  }
});
server.listen(0, '127.0.0.1', () => {
  address = `http://127.0.0.1:${server.address().port}`;
  console.log(address);
});
