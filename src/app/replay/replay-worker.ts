import { parentPort } from 'node:worker_threads';
import { type BucketJob, replayBucket } from './replay-bucket.js';

const port = parentPort;
if (port === null) throw new Error('this file runs in a worker of the replay');
port.on('message', (job: BucketJob) => port.postMessage(replayBucket(job)));
