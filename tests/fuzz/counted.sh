#!/bin/sh
# The compiler, as Cargo calls it for the workspace's own code, with libFuzzer's counters in that code: where a run has
# been, and what it compared. A stable compiler will do for that. No sanitizer: the core forbids unsafe code, and without
# one the runs are several times more.
case " $* " in
    *" --crate-name "*)
        set -- "$@" --cfg fuzzing -Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
            -Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table \
            -Cllvm-args=-sanitizer-coverage-trace-compares -Cllvm-args=-simplifycfg-branch-fold-threshold=0
        ;;
esac
exec "$@"
