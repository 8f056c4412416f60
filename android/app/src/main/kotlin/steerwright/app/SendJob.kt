package steerwright.app

import android.app.job.JobInfo
import android.app.job.JobParameters
import android.app.job.JobScheduler
import android.app.job.JobService
import android.content.ComponentName
import android.content.Context
import android.net.ConnectivityManager
import android.net.NetworkCapabilities
import kotlinx.coroutines.CoroutineScope
import kotlinx.coroutines.Dispatchers
import kotlinx.coroutines.Job
import kotlinx.coroutines.launch
import kotlinx.coroutines.withContext
import steerwright.Connectivity
import steerwright.SteerwrightException

/** Makes the calls to the shop that are due, when the platform gives a network; what is due is the book's to say. */
class SendJob : JobService() {
    private val scope = CoroutineScope(MainThread)
    private var running: Job? = null

    override fun onStartJob(parameters: JobParameters): Boolean {
        running = scope.launch {
            val again = try {
                val book = (application as SteerwrightApp).book()
                withContext(Dispatchers.IO) { book.networkRestored() }
                val report = book.deliver(HttpSender, Online(this@SendJob))
                report.nextAt?.let { schedule(this@SendJob, maxOf(SOONEST, it - System.currentTimeMillis())) }
                report.offline
            } catch (error: SteerwrightException) {
                // The outbox says what went wrong; a book that is busy is asked again.
                error is SteerwrightException.Busy
            }
            jobFinished(parameters, again)
        }
        return true
    }

    override fun onStopJob(parameters: JobParameters): Boolean {
        running?.cancel()
        return true
    }

    companion object {
        private const val ID = 1

        /** Calls follow each other no closer than this, ms. */
        private const val SOONEST = 60_000L

        fun schedule(context: Context, inMs: Long) {
            val job = JobInfo.Builder(ID, ComponentName(context, SendJob::class.java))
                .setRequiredNetworkType(JobInfo.NETWORK_TYPE_ANY)
                .setMinimumLatency(inMs)
                .build()
            context.getSystemService(JobScheduler::class.java).schedule(job)
        }
    }
}

/** Whether the device has a network that reaches further than itself. */
class Online(private val context: Context) : Connectivity {
    override fun isOnline(): Boolean {
        val manager = context.getSystemService(ConnectivityManager::class.java)
        val network = manager.activeNetwork ?: return false
        val can = manager.getNetworkCapabilities(network) ?: return false
        return can.hasCapability(NetworkCapabilities.NET_CAPABILITY_INTERNET)
    }
}
