"""Scripts that start a dask scheduler and a worker on the loopback address; each says one line when it is ready."""

WORKER = """
import asyncio, sys
from distributed import Worker
async def main():
    async with Worker(sys.argv[1], nthreads=1, dashboard=False) as worker:
        print("ready", flush=True)
        await worker.finished()
asyncio.run(main())
"""
SCHEDULER = """
import asyncio
from distributed import Scheduler
async def main():
    async with Scheduler(host="127.0.0.1", port=0, dashboard=False, dashboard_address=None) as scheduler:
        print(scheduler.address, flush=True)
        await scheduler.finished()
asyncio.run(main())
"""
