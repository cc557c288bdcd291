// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.load.gpu;

import dev.loadwitness.agent.load.opencl.Compute;
import dev.loadwitness.agent.load.opencl.OpenCl;
import dev.loadwitness.agent.load.opencl.OpenClException;
import dev.loadwitness.agent.load.worker.ComputeDevice;
import dev.loadwitness.agent.load.worker.Worker;
import java.util.function.Supplier;

/** Loads a graphics part through OpenCL; {@code docs/loads.md} says with what. */
public final class GpuWorker implements Worker {
    /** What to load it with. */
    public enum Kind {
        CORE,
        MEMORY,
        MIX,
        RAMP,
        STEPS
    }

    private final Supplier<OpenCl> openCl;
    private final Kind kind;
    private final String device;
    private final double share;
    private volatile boolean prepared;

    /**
     * Makes a worker.
     *
     * @param openCl loads the library
     * @param device as {@link OpenCl#open} takes it
     * @param share of the device's memory that the memory load tests first
     */
    public GpuWorker(Supplier<OpenCl> openCl, Kind kind, String device, double share) {
        this.openCl = openCl;
        this.kind = kind;
        this.device = device;
        this.share = share;
    }

    @Override
    public int threads() {
        return 1;
    }

    @Override
    public boolean isPrepared() {
        return prepared;
    }

    @Override
    public void work(int thread, Bench bench) {
        try {
            // Never closed: the process ends with the load, and closing a device that was lost may never return.
            Compute compute = openCl.get().open(device);
            Engine engine = new Engine(compute);
            Shift shift = new Shift(engine, compute.device(), kind, bench);
            switch (kind) {
                case CORE, MEMORY, MIX -> {
                    shift.tune();
                    prepared = true;
                    if (kind == Kind.MEMORY) {
                        test(compute, engine, bench);
                    }
                    shift.hold();
                }
                case RAMP -> {
                    shift.balance();
                    prepared = true;
                    shift.ramp();
                }
                case STEPS -> {
                    shift.balance();
                    prepared = true;
                    shift.steps();
                }
            }
        } catch (OpenClException e) {
            if (e.kind() == OpenClException.Kind.DEVICE_LOST) {
                bench.lost(e.getMessage());
            }
            throw e;
        }
    }

    private void test(Compute compute, Engine engine, Bench bench) {
        ComputeDevice d = compute.device();
        long tested = new March(compute, engine.program(), bench).run((long) (share * d.memoryBytes()));
        bench.note("march test over " + (tested >> 20) + " MiB of " + (d.memoryBytes() >> 20) + " MiB");
    }
}
