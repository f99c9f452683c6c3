#pragma once

namespace emberline::speed {

/// Each measures one thing and prints its part of the table to standard output.
void tcp_speed();      ///< requests a second over TCP, beside a plain libmodbus server and a bare answerer
void stepped_speed();  ///< what one transaction of a stand-in costs in a stepped rehearsal
void story_speed();    ///< how long a rehearsal of eight hours takes
void plant_speed();    ///< what one simulated hour of one unit costs
void many_units();     ///< how many times faster than the clock a thousand units are
void system_calls();   ///< how many of them an answer takes, of the same three
void pty_speed();      ///< round trip over a pseudo-terminal, beside a bare echo
void lateness();       ///< how late answers leave that take their time on the line
void step_cost();      ///< what a simulated second costs, each network in each way of firing
void growth();         ///< time to be ready, memory and processor of 1 to 10,000 units
void panel_pages();    ///< how long answers take while fifty pages watch, beside none

}  // namespace emberline::speed
