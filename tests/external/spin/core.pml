/* The control core reduced to its state machine. One turn of the loop is one pass of 5 ms.

   Inputs, timers and every rule of supervision are choices: neutral may become proven, a
   contactor may have pulled, a travel may end, a fault may be found. What is left is what the
   core may do at all. The test beside this file compares the states with those of the real core. */

#define HELD 0
#define IDLE 1
#define RAISING 2
#define LOWERING 3
#define FAULT 4

#define OFF 0
#define WAITING 1
#define DIRECTION 2
#define LINE 3
#define RUNNING 4

#define NEUTRAL 0
#define UP 1
#define DOWN 2
#define OTHER 3

byte mode = HELD;
byte phase = OFF;
byte ask = NEUTRAL;
bit chain = 1;
bit proven = 0;    /* neutral for 300 ms with the chain live */
bit window = 0;    /* the cause of a stop is being sought */
bit candidate = 0; /* a fault was found for it */
bit was_open;
bit judged = 1;    /* for the claims only: the pass is over */

#define moving (mode == RAISING || mode == LOWERING)
#define asked ((mode == RAISING && ask == UP) || (mode == LOWERING && ask == DOWN))
#define powered (phase >= DIRECTION)

inline to_held() {
    mode = HELD;
    phase = OFF;
    proven = 0;
}

active proctype core() {
    /* Nothing is proven at power-up; the first pass shows it. */
    do
    :: atomic {
        was_open = window;
        judged = 0;

        /* Inputs: a dead chain leaves both coil paths dead. */
        if :: chain = 1 :: chain = 0 fi;
        if
        :: ask = NEUTRAL
        :: chain -> ask = UP
        :: chain -> ask = DOWN
        :: ask = OTHER
        fi
    }
    atomic {
        /* Supervision. */
        if
        :: mode == FAULT -> skip
        :: mode != FAULT && !chain -> window = 1; candidate = 1
        :: else -> skip
        fi;
        if
        :: !(ask == NEUTRAL && chain) -> proven = 0
        :: else -> skip
        fi
    }
    if
    :: mode != FAULT && chain -> atomic { window = 1; candidate = 1 }
    :: skip
    fi;
    if
    :: ask == NEUTRAL && chain -> atomic { proven = 1 }
    :: skip
    fi;

    /* Stops first. */
    if
    :: atomic { moving && (candidate || !asked) -> to_held(); window = 1 }
    :: atomic { moving && asked && !candidate -> to_held(); window = 1 } /* an end is reached */
    :: atomic { moving && asked && !candidate -> skip }
    :: atomic { mode == IDLE && window -> to_held() }
    :: atomic { mode == IDLE && !window -> skip }
    :: atomic { mode == HELD || mode == FAULT -> skip }
    fi;

    /* Then the cause. */
    if
    :: atomic { was_open && window ->
        if
        :: candidate -> mode = FAULT; phase = OFF
        :: else -> skip
        fi;
        window = 0;
        candidate = 0 }
    :: skip
    fi;

    /* Then the reset button. */
    if
    :: atomic { mode == FAULT && ask == NEUTRAL && chain && proven -> to_held() }
    :: skip
    fi;

    /* Only then a start. */
    if
    :: atomic { mode == HELD && !window && chain && ask == NEUTRAL && proven -> mode = IDLE }
    :: atomic { mode == HELD -> skip }
    :: atomic { mode == IDLE && ask == UP -> mode = RAISING; phase = WAITING; proven = 0 }
    :: atomic { mode == IDLE && ask == DOWN -> mode = LOWERING; phase = WAITING; proven = 0 }
    :: atomic { mode == IDLE && ask != NEUTRAL -> to_held() } /* refused */
    :: atomic { mode == IDLE && (ask == NEUTRAL || ask == OTHER) -> skip }
    :: atomic { moving && phase < RUNNING -> phase = phase + 1 }
    :: atomic { moving -> skip }
    :: atomic { mode == FAULT -> skip }
    fi;

    d_step {
        assert(!powered || asked);
        assert(!powered || chain);
        assert(phase == OFF || moving);
        assert(!moving || !window);
        c_code { printf("STATE %d %d %d %d %d %d\n", now.mode, now.phase, now.ask, now.chain,
                        now.proven, now.window); };
        was_open = 0;
        judged = 1
    }
    od
}

/* Never powered unless the control asks that way with the chain live. */
ltl r1 { [] ((judged && powered) -> (asked && chain)) }
/* Never from one direction to the other but through held and idle. */
ltl r3 { [] ((mode == RAISING -> (mode != LOWERING W mode == HELD)) &&
             (mode == LOWERING -> (mode != RAISING W mode == HELD))) }
/* No travel begins but from a neutral that was proven since the last travel or fault. */
ltl r4 { [] (mode == HELD -> (!moving W mode == IDLE)) }
/* A latched fault is left to held only. */
ltl r5 { [] (mode == FAULT -> ((mode == FAULT) W (mode == HELD))) }
